"""Stations of the finish: from the pressed bar to the plated and inspected one."""
