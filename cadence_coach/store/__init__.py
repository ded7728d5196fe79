"""What is kept on disk: recordings (open CSV files), outing files (SQLite), exports."""
