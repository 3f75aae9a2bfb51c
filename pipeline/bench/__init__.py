"""What one does with findings: parts to buy, to try and to measure."""
