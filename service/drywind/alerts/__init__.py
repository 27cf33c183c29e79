"""Alerts: when to speak, and in which words."""
