"""The topic skim: workings, pictures, exercises, lesson."""
