"""Launches with planted faults, made by a damper code of its own, and how well `explain` answers them."""
