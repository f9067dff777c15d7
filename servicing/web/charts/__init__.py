"""Charts as SVG: stops on a time axis, measured values, a machine's hours."""
