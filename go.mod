module sidetone

go 1.26
