#include "textflag.h"

// Both functions take n, a positive multiple of 16, and sum in the same order:
// taps 0-7, 16-23, ... in one register, 8-15, 24-31, ... in another.

// FOLD leaves the sum of a and b, sixteen numbers, in the lowest lane of xa.
#define FOLD(a, b, xa, xb) \
	VADDPS       b, a, a;   \
	VEXTRACTF128 $1, a, xb; \
	VADDPS       xb, xa, xa; \
	VMOVHLPS     xa, xa, xb; \
	VADDPS       xb, xa, xa; \
	VMOVSHDUP    xa, xb;    \
	VADDSS       xb, xa, xa

// func dotAVX2(x, taps *float32, n int) float32
TEXT ·dotAVX2(SB), NOSPLIT, $0-28
	MOVQ   x+0(FP), SI
	MOVQ   taps+8(FP), DI
	MOVQ   n+16(FP), CX
	VXORPS Y0, Y0, Y0
	VXORPS Y1, Y1, Y1

loop1:
	VMOVUPS     (DI), Y8
	VMOVUPS     32(DI), Y9
	VFMADD231PS (SI), Y8, Y0
	VFMADD231PS 32(SI), Y9, Y1
	ADDQ        $64, SI
	ADDQ        $64, DI
	SUBQ        $16, CX
	JNZ         loop1

	FOLD(Y0, Y1, X0, X1)
	VZEROUPPER
	MOVSS X0, ret+24(FP)
	RET

// func dot4AVX2(out, x *float32, stride int, taps *float32, n int)
//
// One load of the taps serves four products, of x, x[stride:], x[2*stride:]
// and x[3*stride:]; out takes four numbers.
TEXT ·dot4AVX2(SB), NOSPLIT, $0-40
	MOVQ   out+0(FP), DX
	MOVQ   x+8(FP), SI
	MOVQ   stride+16(FP), BX
	MOVQ   taps+24(FP), DI
	MOVQ   n+32(FP), CX
	LEAQ   (SI)(BX*4), R8
	LEAQ   (R8)(BX*4), R9
	LEAQ   (R9)(BX*4), R10
	VXORPS Y0, Y0, Y0
	VXORPS Y1, Y1, Y1
	VXORPS Y2, Y2, Y2
	VXORPS Y3, Y3, Y3
	VXORPS Y4, Y4, Y4
	VXORPS Y5, Y5, Y5
	VXORPS Y6, Y6, Y6
	VXORPS Y7, Y7, Y7

loop4:
	VMOVUPS     (DI), Y8
	VMOVUPS     32(DI), Y9
	VFMADD231PS (SI), Y8, Y0
	VFMADD231PS (R8), Y8, Y2
	VFMADD231PS (R9), Y8, Y4
	VFMADD231PS (R10), Y8, Y6
	VFMADD231PS 32(SI), Y9, Y1
	VFMADD231PS 32(R8), Y9, Y3
	VFMADD231PS 32(R9), Y9, Y5
	VFMADD231PS 32(R10), Y9, Y7
	ADDQ        $64, SI
	ADDQ        $64, R8
	ADDQ        $64, R9
	ADDQ        $64, R10
	ADDQ        $64, DI
	SUBQ        $16, CX
	JNZ         loop4

	FOLD(Y0, Y1, X0, X1)
	FOLD(Y2, Y3, X2, X3)
	FOLD(Y4, Y5, X4, X5)
	FOLD(Y6, Y7, X6, X7)
	VMOVSS X0, (DX)
	VMOVSS X2, 4(DX)
	VMOVSS X4, 8(DX)
	VMOVSS X6, 12(DX)
	VZEROUPPER
	RET
