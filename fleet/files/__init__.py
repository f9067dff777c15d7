"""Tables in files: opened (CSV, XLSX), their columns guessed, their figures and days read. No database."""
