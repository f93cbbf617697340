"""The topic strip down: workings, pictures, exercises, lesson."""
