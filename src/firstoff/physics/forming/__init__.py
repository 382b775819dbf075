"""Pressed sheet: flow curve, bending under tension, springback, sections, forces."""
