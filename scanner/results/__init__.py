"""What results mean: luck, ability, evidence, notes that come back, confusions, what to taste next."""
