// The part of fontkit that is used here; the package ships no types.
declare module 'fontkit' {
  export function openSync(file: string): { hasGlyphForCodePoint(codePoint: number): boolean }
}
