"""The outside world to records: units, sheets, platforms, cars. Nothing is guessed, nothing is lost."""
