"""Declarations of header fields, for tests that add one to a copy of the package."""

LAST = '    HeaderField("hours", "Hours or mileage", False, \'"1240 h"\'),\n'

OPTIONAL = '    HeaderField("licence", "Licence number", example=\'"L-17"\', at_start=True),\n'

REQUIRED = '    HeaderField("licence", "Licence number", True, \'"L-17"\', required_since="9.9.9"),\n'
