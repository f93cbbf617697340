"""The topic diagnosis: workings, pictures, exercises, lesson."""
