"""The topic coolant: workings, pictures, exercises, lesson."""
