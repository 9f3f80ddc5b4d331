"""Pure functions over findings: ranking, harness, planning, proof, trail."""
