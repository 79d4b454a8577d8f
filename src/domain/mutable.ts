/** For building a result whose optional fields are set after the literal: spreading into a literal is slow. */
export type Mutable<T> = { -readonly [K in keyof T]: T[K] }
