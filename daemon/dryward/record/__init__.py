"""Remembers: the SQLite record of all the engine saw and decided. Schema and example questions: README.md beside this file."""
