"""What was connected: run labels, and the plans as data."""
