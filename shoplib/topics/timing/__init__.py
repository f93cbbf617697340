"""The topic timing: workings, pictures, exercises, lesson."""
