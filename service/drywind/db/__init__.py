"""The SQLite file: its tables and upgrades; how it is opened, guarded, copied and put right."""
