"""The topic tightening: workings, pictures, exercises, lesson."""
