"""The topic handover: workings, pictures, exercises, lesson."""
