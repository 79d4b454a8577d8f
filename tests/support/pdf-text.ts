import { getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs'

export interface PdfPage {
  readonly widthPt: number
  readonly heightPt: number
  readonly text: string
}

/** The pages of a PDF, read by a library that has nothing to do with the one that wrote it. */
export async function pdfPages(bytes: Uint8Array): Promise<PdfPage[]> {
  // It takes the bytes away from whoever hands them over.
  const task = getDocument({ data: Uint8Array.from(bytes), verbosity: 0 })
  const document = await task.promise
  const pages: PdfPage[] = []
  for (let number = 1; number <= document.numPages; number++) {
    const page = await document.getPage(number)
    const { items } = await page.getTextContent()
    const [, , widthPt = 0, heightPt = 0] = page.view
    pages.push({ widthPt, heightPt, text: items.map((item) => ('str' in item ? item.str : '')).join(' ') })
  }
  await task.destroy()
  return pages
}

/** Text without blanks and marks of no width: lines are broken where the paper ends. */
export const solid = (text: string) => text.replaceAll(/[\s\u{200B}]/gu, '')
