"""The plating line: its sheet, timetable, way back and pages."""
