# The weekly order, orders, going off.
