# Shelf, products, containers, labels.
