"""Files of readings: opened (CSV, XLSX), their columns guessed, each row handed to the one door."""
