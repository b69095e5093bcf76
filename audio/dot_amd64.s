#include "textflag.h"

// func dotAVX2(x, taps *float32, n int) float32
//
// n is a positive multiple of 32. Four sums run side by side, so that an
// addition need not wait for the one before it.
TEXT ·dotAVX2(SB), NOSPLIT, $0-28
	MOVQ   x+0(FP), SI
	MOVQ   taps+8(FP), DI
	MOVQ   n+16(FP), CX
	VXORPS Y0, Y0, Y0
	VXORPS Y1, Y1, Y1
	VXORPS Y2, Y2, Y2
	VXORPS Y3, Y3, Y3

loop:
	VMOVUPS     (DI), Y4
	VMOVUPS     32(DI), Y5
	VMOVUPS     64(DI), Y6
	VMOVUPS     96(DI), Y7
	VFMADD231PS (SI), Y4, Y0
	VFMADD231PS 32(SI), Y5, Y1
	VFMADD231PS 64(SI), Y6, Y2
	VFMADD231PS 96(SI), Y7, Y3
	ADDQ        $128, SI
	ADDQ        $128, DI
	SUBQ        $32, CX
	JNZ         loop

	VADDPS       Y1, Y0, Y0
	VADDPS       Y3, Y2, Y2
	VADDPS       Y2, Y0, Y0
	VEXTRACTF128 $1, Y0, X1
	VADDPS       X1, X0, X0
	VMOVHLPS     X0, X0, X1
	VADDPS       X1, X0, X0
	VMOVSHDUP    X0, X1
	VADDSS       X1, X0, X0
	VZEROUPPER
	MOVSS        X0, ret+24(FP)
	RET
