//! Memory that is not used any more.

/// Gives memory that was freed back to the system. The C library keeps it otherwise, and a program that does one large thing after
/// another seems to need all of it at once. Elsewhere than on Linux nothing is done.
#[allow(unsafe_code)]
pub fn give_back() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    {
        unsafe extern "C" {
            fn malloc_trim(pad: usize) -> std::ffi::c_int;
        }
        // SAFETY: the function of the C library takes any number, may be called at any time from any thread, and leaves alone all
        // memory that is in use.
        unsafe {
            malloc_trim(0);
        }
    }
}
