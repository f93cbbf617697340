"""The topic angle: workings, pictures, exercises, lesson."""
