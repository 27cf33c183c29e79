"""Weather: public forecasts and past hours, as one canonical hourly table."""
