"""Classes: rosters, assignments, answers and marks in the record; result files; exports.  See ``classes.Classroom``."""
