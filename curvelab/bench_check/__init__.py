"""Whether the bench can be trusted today: golden tubes, a resistor, an empty socket."""
