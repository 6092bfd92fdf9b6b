"""A list, a drill or the day of an aircraft as a diagram, for paper, a terminal or a tool."""
