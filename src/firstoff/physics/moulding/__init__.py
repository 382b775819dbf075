"""Moulded and pressed parts: cooling, clamp and press force, powder density, sintering, grades."""
