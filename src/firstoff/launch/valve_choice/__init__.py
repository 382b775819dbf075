"""Choosing the valve: the customer's table met with parts of the plant's bin."""
