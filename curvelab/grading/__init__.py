"""The grade of a tube: printed limits where a sheet has them, else the house's rules."""
