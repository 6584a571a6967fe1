//! Riffs and fits as positioned shapes: staff, tablature, diagrams; written as SVG and PDF.
