"""The topic preload: workings, pictures, exercises, lesson."""
