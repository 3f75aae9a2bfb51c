"""What a valid table is: columns, tables, and the pandera schemas made from them."""
