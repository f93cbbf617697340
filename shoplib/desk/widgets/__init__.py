"""The widgets of the notebooks: forms, guide, job desk, lessons."""
