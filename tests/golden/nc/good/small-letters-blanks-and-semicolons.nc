(GOOD MOVES 3 FEED LENGTH 15.0000 MM)
 g21 g90 ; metric
 g 0 x 5. y+.0
m101 ( wire in )
N10 G 1 X 15. F 3 ; no blank inside a number: this is a comment
n20 y -5.00
M102
M2
