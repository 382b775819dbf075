"""Explain: causes compared, free calibration, the reading to take next."""
