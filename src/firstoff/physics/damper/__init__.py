"""The twin-tube damper: oil, gas, valves, the steady curve and the damper in motion."""
