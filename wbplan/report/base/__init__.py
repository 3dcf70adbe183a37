"""What all pages share: wording, SVG, labels, templates and the style sheet."""
