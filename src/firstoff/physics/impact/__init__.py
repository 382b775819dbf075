"""Low-speed impact of a bumper bar: section, bar, brackets, pendulum, barrier, the published protocol."""
