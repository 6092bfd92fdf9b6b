"""Words of the crew: numbers as they are typed, spoken and spoken back."""
