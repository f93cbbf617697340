"""The topic threads: workings, pictures, exercises, lesson."""
