//! What music is: spelled pitch, exact time, riffs, and what can be found out about them.
