"""From a vehicle to the force table that its damper should have."""
