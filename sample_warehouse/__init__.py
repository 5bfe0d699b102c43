"""The invented Tarn Hollow school: what made it, and what it keeps."""
