//! The serial line as the Modbus library needs it: usable for one question
//! after the other, with nothing left over from the one before.

use super::super::tty::Tty;
use std::io;
use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};

/// A handle on the open line. The library takes its transport for good; this one
/// can be given away for each question, and the line stays open.
#[derive(Clone)]
pub(super) struct Wire(Arc<Mutex<Tty>>);

impl Wire {
    pub(super) fn new(tty: Tty) -> Self {
        Wire(Arc::new(Mutex::new(tty)))
    }

    /// The line itself.
    pub(super) fn tty(&self) -> MutexGuard<'_, Tty> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Take the line back; `None` while another handle is alive.
    pub(super) fn into_tty(self) -> Option<Tty> {
        let tty = Arc::into_inner(self.0)?;
        Some(tty.into_inner().unwrap_or_else(PoisonError::into_inner))
    }

    /// Throw away what came without being asked for, or too late: the protocol
    /// does not tell which question an answer belongs to. Returns how many bytes.
    pub(super) fn drain(&self) -> u64 {
        let mut tty = self.tty();
        let mut portion = [0; 512];
        let mut bytes = 0;
        while let Ok(n @ 1..) = tty.stream.try_read(&mut portion) {
            bytes += n as u64;
            if bytes > 64 * 1024 {
                break;
            }
        }
        bytes
    }
}

impl AsyncRead for Wire {
    fn poll_read(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.tty().stream).poll_read(context, buffer)
    }
}

impl AsyncWrite for Wire {
    fn poll_write(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.tty().stream).poll_write(context, bytes)
    }

    // A flush of a tty waits, blocking its thread, until the last bit is sent;
    // what has been written is sent anyway.
    fn poll_flush(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }
}
