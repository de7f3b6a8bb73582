"""Judgements on an outcome: bill, hazards, vessels, cautions, limits, front."""
