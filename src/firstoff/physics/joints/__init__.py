"""Bolted joints: threads, preload and torque, load share, slip, prying, stripping."""
