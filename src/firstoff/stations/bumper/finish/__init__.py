"""The bumper's finish: buffing, plating or paint, and what the light shows."""
