"""Correct: which setting to move, what else moves, and what becomes of the parts."""
