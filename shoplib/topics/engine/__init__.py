"""The engine card: what the instructions say about one kind of engine, typed once."""
