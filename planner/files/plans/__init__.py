"""A night's plan to take along: a sheet to print, calendar entries, a table.

In: `session.night.model.NightPlan`. Out: HTML, iCalendar, CSV and ECSV. Read `sheet`.
"""
