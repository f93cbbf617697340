"""The topic flatness: workings, pictures, exercises, lesson."""
