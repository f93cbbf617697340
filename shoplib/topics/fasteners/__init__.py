"""The topic fasteners: workings, pictures, exercises, lesson."""
