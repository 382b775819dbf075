"""Bolted to the car, and hit."""
