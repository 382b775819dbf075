"""Production lines: takt, effectiveness, queues, lines with buffers."""
