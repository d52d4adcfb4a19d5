//! A file's lines from last to first, one block in memory.

use std::io::{self, Read, Seek, SeekFrom};

use memchr::memrchr;

use super::records::{BLOCK, RECORD_LIMIT};

/// Reads the part of a source from `floor` to its end line by line, the last line first, each with its LF. A line break
/// inside quotes is a line break like any other.
pub(super) struct ReverseLines<R> {
    source: R,
    floor: u64,
    /// Where the unread part of the source ends.
    position: u64,
    /// A stretch of the source that ends at a line's end; bytes beyond `unsent` went out already.
    block: Vec<u8>,
    unsent: usize,
    /// The line that is going out.
    line: (usize, usize),
}

impl<R: Read + Seek> ReverseLines<R> {
    pub(super) fn new(mut source: R, floor: u64) -> io::Result<ReverseLines<R>> {
        let position = source.seek(SeekFrom::End(0))?.max(floor);
        Ok(ReverseLines {
            source,
            floor,
            position,
            block: Vec::new(),
            unsent: 0,
            line: (0, 0),
        })
    }

    /// Makes the line before the last one that went out the current line; false at the floor.
    fn step_back(&mut self) -> io::Result<bool> {
        loop {
            let before = &self.block[..self.unsent];
            let body = before.strip_suffix(b"\n").unwrap_or(before);
            match memrchr(b'\n', body) {
                Some(at) => {
                    self.line = (at + 1, self.unsent);
                    self.unsent = at + 1;
                    return Ok(true);
                }
                None if self.position == self.floor => {
                    self.line = (0, self.unsent);
                    self.unsent = 0;
                    return Ok(self.line.1 > 0);
                }
                None => self.fill()?,
            }
        }
    }

    /// Puts the block before in front of the line that is cut at the current block's start.
    fn fill(&mut self) -> io::Result<()> {
        if self.unsent > RECORD_LIMIT {
            return Err(io::Error::new(
                io::ErrorKind::InvalidData,
                "a line longer than 64 KiB",
            ));
        }
        let size = (self.position - self.floor).min(BLOCK as u64) as usize;
        self.position -= size as u64;
        self.source.seek(SeekFrom::Start(self.position))?;
        self.block
            .resize(self.block.len().max(size + self.unsent), 0);
        self.block.copy_within(..self.unsent, size);
        self.source.read_exact(&mut self.block[..size])?;
        self.unsent += size;
        // A file that ends without a line ending gets one.
        if self.unsent == size && self.block[size - 1] != b'\n' {
            self.block.resize(self.block.len().max(size + 1), 0);
            self.block[size] = b'\n';
            self.unsent += 1;
        }
        Ok(())
    }
}

impl<R: Read + Seek> Read for ReverseLines<R> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let mut written = 0;
        while written < out.len() {
            let (start, end) = self.line;
            if start == end {
                if !self.step_back()? {
                    break;
                }
                continue;
            }
            let count = (end - start).min(out.len() - written);
            out[written..written + count].copy_from_slice(&self.block[start..start + count]);
            self.line.0 += count;
            written += count;
        }
        Ok(written)
    }
}
