"""What the steel will do: spreads of making, thousands of bodies, how much easing to expect."""
