"""The topic torque: workings, pictures, exercises, lesson."""
