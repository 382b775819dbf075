"""Electroplating: Faraday's law, simple cells with closed solutions, deposits, current fields of whole tanks."""
