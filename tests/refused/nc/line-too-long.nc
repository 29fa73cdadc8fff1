(MACHINE mm EXPECT line-too-long LINE 3 COLUMN 121)
G21 G90 G40
(long long long long long long long long long long long long long long long long long long long long long long long long long long long long long long )
