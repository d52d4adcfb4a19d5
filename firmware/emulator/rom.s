@ Stand-in for the RP2040's boot ROM, written from its documented table layout (RP2040 data sheet,
@ bootrom chapter); no code of the real one. Table lookup, memory and bit helpers; flash calls stop
@ at breakpoints F0h to F5h, which board.mjs carries out.
.syntax unified
.cpu cortex-m0plus
.thumb
.section .text
.global _start
_start:
  .word 0x20042000            @ SP
  .word reset+1
  .word hang+1, hang+1        @ NMI, HardFault
  .byte 'M','u',1,2           @ magic, version 2
  .hword functab              @ 0x14
  .hword datatab              @ 0x16
  .hword lookup+1             @ 0x18
  .hword 0
.align 2
reset:                        @ enter image at flash+0x100 like boot2 does
  ldr r0, =0x10000100
  ldr r1, =0xe000ed08
  str r0, [r1]
  ldmia r0, {r0, r1}
  msr msp, r0
  bx r1
hang: bkpt #0xff
  b hang
lookup:                       @ r0 table, r1 code -> r0
  push {r4, lr}
1: ldrh r2, [r0]
  cmp r2, #0
  beq 3f
  ldrh r3, [r0, #2]
  adds r0, #4
  cmp r2, r1
  bne 1b
  mov r0, r3
  pop {r4, pc}
3: movs r0, #0
  pop {r4, pc}
memset_: push {r4, lr}
  mov r3, r0
1: subs r2, #1
  bmi 2f
  strb r1, [r3]
  adds r3, #1
  b 1b
2: pop {r4, pc}
memset4_: push {r4, lr}
  mov r3, r0
  uxtb r1, r1
  lsls r4, r1, #8
  orrs r1, r4
  lsls r4, r1, #16
  orrs r1, r4
1: subs r2, #4
  bmi 2f
  stmia r3!, {r1}
  b 1b
2: adds r2, #4
3: subs r2, #1
  bmi 4f
  strb r1, [r3]
  adds r3, #1
  b 3b
4: pop {r4, pc}
memcpy_: push {r4, lr}
  mov r4, r0
1: subs r2, #1
  bmi 2f
  ldrb r3, [r1]
  strb r3, [r4]
  adds r1, #1
  adds r4, #1
  b 1b
2: pop {r4, pc}
memcpy4_: push {r4, lr}
  mov r4, r0
1: subs r2, #4
  bmi 2f
  ldmia r1!, {r3}
  stmia r4!, {r3}
  b 1b
2: adds r2, #4
3: subs r2, #1
  bmi 4f
  ldrb r3, [r1]
  strb r3, [r4]
  adds r1, #1
  adds r4, #1
  b 3b
4: pop {r4, pc}
popcnt: movs r1, #0
1: cmp r0, #0
  beq 2f
  movs r2, #1
  ands r2, r0
  adds r1, r2
  lsrs r0, r0, #1
  b 1b
2: mov r0, r1
  bx lr
clz_: movs r1, #32
1: cmp r0, #0
  beq 2f
  lsrs r0, r0, #1
  subs r1, #1
  b 1b
2: mov r0, r1
  bx lr
ctz_: movs r1, #0
  cmp r0, #0
  beq 3f
1: movs r2, #1
  ands r2, r0
  bne 2f
  lsrs r0, r0, #1
  adds r1, #1
  b 1b
3: movs r1, #32
2: mov r0, r1
  bx lr
rev_: movs r1, #0
  movs r2, #32
1: lsls r1, r1, #1
  movs r3, #1
  ands r3, r0
  orrs r1, r3
  lsrs r0, r0, #1
  subs r2, #1
  bne 1b
  mov r0, r1
  bx lr
f_if: bkpt #0xf0
  bx lr
f_ex: bkpt #0xf1
  bx lr
f_re: bkpt #0xf2
  bx lr
f_rp: bkpt #0xf3
  bx lr
f_fc: bkpt #0xf4
  bx lr
f_cx: bkpt #0xf5
  bx lr
.ltorg
.align 2
.macro ent tag, fn
  .ascii "\tag"
  .hword \fn+1
.endm
functab:
  ent "MS", memset_
  ent "S4", memset4_
  ent "MC", memcpy_
  ent "C4", memcpy4_
  ent "P3", popcnt
  ent "L3", clz_
  ent "T3", ctz_
  ent "R3", rev_
  ent "IF", f_if
  ent "EX", f_ex
  ent "RE", f_re
  ent "RP", f_rp
  ent "FC", f_fc
  ent "CX", f_cx
  .word 0
datatab: .word 0
